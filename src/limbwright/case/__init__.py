"""Room `case`: one patient's treated leg from first film to outcome; the only thing the edges pass around."""

"""Practice audit: what all treated bones together teach; statistics on plain columns, filled from outside."""

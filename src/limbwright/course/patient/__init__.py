"""What the patient takes home, in plain words and in the patient's language."""

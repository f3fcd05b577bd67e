"""Room `implant`: nails, screws, and the catalogue file their owner keeps."""

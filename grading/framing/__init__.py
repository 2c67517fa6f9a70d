"""What of a frame is shown, and how it is turned: the map between a picture and its frame."""

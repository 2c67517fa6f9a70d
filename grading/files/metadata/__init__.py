"""What files carry beside their pixels: tags, EXIF, colour profiles; read, and written again."""

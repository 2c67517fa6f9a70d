"""The file formats that are written, one module and one record each; `registry` lists them."""

"""The file formats that are written, one module and one record each; `registry` lists them.

The same input gives the same bytes: nothing of the time or the machine goes in.
"""

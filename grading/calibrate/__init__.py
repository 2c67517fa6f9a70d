"""A camera calibrated on a colour chart: from frames of the chart to a camera file.

1. `find`: where the chart lies, from even areas (`areas`) on a grid (`grids`) in perspective
   (`homography`), or from its corners;
2. `patches`: the camera light of its patches, and whether the photograph serves;
3. `fit`: the matrix that brings them nearest to the colours published for the chart (`chart`);
4. `light`: all this for one frame; `camera_file`: the text that recipes read.

The matrix aims at the colours that the surfaces have by day, whatever light the chart stood in.
"""

"""One scene in mm, painted on terminal cells, PDF and SVG."""

"""Files that leave: drawings as DXF and SVG, and the folder that takes them all or none."""

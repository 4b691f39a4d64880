"""Line drawings for papers: shapes in mm from the upper left corner, as SVG and on a PDF page."""

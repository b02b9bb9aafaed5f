"""shipwindow."""

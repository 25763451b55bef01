"""The page on the pilot's own machine: documents, live answers and the server that joins them."""

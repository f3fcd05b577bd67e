"""The routes, one file for each page or resource."""

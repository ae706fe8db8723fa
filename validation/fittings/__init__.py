"""What fittings drain, beside rules of common practice and tables of standards."""

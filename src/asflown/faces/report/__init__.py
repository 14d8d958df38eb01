"""Sheets on paper: from the templates of the pages to print and PDF."""

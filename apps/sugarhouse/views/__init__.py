"""The sugarhouse's pages."""

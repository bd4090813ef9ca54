"""What `import sim` offers: scenarios that are changed by keyword, what commands find as tables of numbers. It knows no screen."""

"""What is expected of a design on its wearer, in other poses too; and the search for better designs."""

"""What is owned and measured."""

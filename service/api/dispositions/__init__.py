"""What is done with lots: concessions and dispositions."""

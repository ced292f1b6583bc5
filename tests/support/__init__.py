"""What several tests need: a slow judge to compare with, and lots to judge."""

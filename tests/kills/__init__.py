"""The kill study: a real process is killed at random moments of an order, over and over, and the record looked at."""

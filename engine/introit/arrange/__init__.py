"""An intro and a tune in, notes out: plan, score, performance. Pure; knows no port and no clock."""

"""Speed, as ratios to named baselines that run beside it: `make bench` prints one table."""

"""What happens in time. Imports nothing above `performance`, and no third-party package but the port libraries."""

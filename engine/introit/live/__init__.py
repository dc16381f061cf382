"""What happens in time. Imports nothing above `performance`, no third-party package but port libraries."""

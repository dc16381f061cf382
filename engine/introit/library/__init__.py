"""YAML in patterns/ and config/, read into checked, frozen objects."""

"""What files and options may say, as frozen values; each key's meaning and option stand beside its field."""

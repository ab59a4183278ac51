"""Small promises about sound, vibration, speech, notices and staying awake."""

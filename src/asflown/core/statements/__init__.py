"""What settings say about losing the radio, arming, disarming and the battery, as plain statements."""

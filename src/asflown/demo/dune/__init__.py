"""The worked example over a link: an invented firmware that speaks MAVLink, and one aircraft that runs it."""

"""HTTPS on a farm's own network: an authority of one's own, its certificate, and handing it out."""

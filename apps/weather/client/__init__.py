"""Weather services over HTTP: the only place that talks to them, knowing nothing of the store.

`records` says what any provider gives back, `open_meteo` asks one service, `checks` decides
whether a reply can be believed, `transport` gets bytes within a deadline, `limits` reads how
long to wait. Temperatures are in C, heights in metres, times aware UTC.
"""

from hypothesis import settings

# A busy machine makes an example slow, not wrong: time is not what these properties test.
settings.register_profile("arithmetic", deadline=None)
settings.load_profile("arithmetic")

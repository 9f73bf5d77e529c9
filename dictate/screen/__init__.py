"""The screen: an examination in a terminal, to be read from two metres.

Every part is one widget that draws what it is given and posts messages; only `app` knows the
session and the listener.
"""

"""Spoken prompts and cue sounds.

The screen holds a :class:`~companion.devices.voice.client.Voice`, which never
blocks and never raises. The engine and the sound device live in a helper
process (``python -m companion.devices.voice.helper``): native audio code can
exit, hang or write on the terminal, and there it harms nothing.
"""

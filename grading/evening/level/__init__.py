"""Levelling: what evens out the exposure and the white of a set, measured in the frames.

`dials` says how much light the settings let in, `overlap` lays neighbouring frames over each other,
`pairs` reads from them how much lighter one is than the other, and of which colour, `solve` finds
the one course of the evening's light that fits it all. Where there are several cameras, `across`
lays frames of both over each other, and `beside` sets their courses on one light. `corrections`
makes recipe keys of it.
"""

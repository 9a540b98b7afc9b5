"""Where the wear table comes from: strokes of letters and digits, the ways in which wear removes them, and a reader who takes what is left literally.

`python -m kb.probability.channel.strokes` rewrites `kb/probability/channel/wear.txt` byte for byte. Nothing here runs when a question is asked.
docs/wear.md explains the method and says how far outside data supports it.
"""

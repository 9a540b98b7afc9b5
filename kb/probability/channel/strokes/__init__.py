"""Where the wear table comes from: strokes of letters and digits, ways in which wear eats them, and a reader who takes what is left at its word.

`python -m kb.probability.channel.strokes` writes `kb/probability/channel/wear.txt` again, byte for byte. Nothing here runs when a question is asked.
docs/wear.md explains the method and says how far outside data supports it.
"""

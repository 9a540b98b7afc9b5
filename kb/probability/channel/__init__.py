"""From a reading to the weight of a text: wear, slips, missing characters, numbers nobody recorded."""

"""What everything else speaks in: records, evidence, answers, dates, lengths, errors."""

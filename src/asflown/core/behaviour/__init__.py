"""How an aircraft answers: handling figures, loop margins, steps, identification. Arrays in, results out."""

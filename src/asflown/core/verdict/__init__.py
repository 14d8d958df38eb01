"""Whether an aircraft flies as before: margins, equivalence, scatter between flights, how long to fly."""

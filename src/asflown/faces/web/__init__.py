"""The pages: a thin face over the same jobs and views as the commands."""

"""The answer to a job or to readings: one model, which every face draws and none words anew."""

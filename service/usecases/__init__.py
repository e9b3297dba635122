"""What a caller can ask for: one function per question, knowledge table in, plain result out."""

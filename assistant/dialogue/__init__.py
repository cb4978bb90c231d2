"""What an utterance is in this context: a question, a follow-up, a declaration, an answer to what is pending."""

"""What comes in and goes out in an open form.

Holds:   readers and writers of files and messages: decode to plain data or a proposal, encode to bytes.
Imports: errors, preparation, records; encoders import neither Django nor records.
Never:   trust in what was received.
"""

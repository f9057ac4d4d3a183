"""What people look at: words, tables, figures, pages, and a night to be played again.

Start with `pages.run`, one page from its sentences to its pictures.
"""

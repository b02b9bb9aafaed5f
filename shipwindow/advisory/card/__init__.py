"""The bench card, computed: the shop's own table.

Door: ``bench_card``; writers ``as_html``, ``as_pdf``, ``as_text``. Must not know: how an answer is found.
"""

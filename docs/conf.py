"""How the documentation is built."""

from asflown import __version__

project = "asflown"
author = "the asflown founders"
copyright = "the asflown founders"
version = release = __version__

extensions = ["myst_parser"]
myst_enable_extensions = ["deflist", "colon_fence"]
myst_heading_anchors = 3
source_suffix = {".md": "markdown"}
exclude_patterns = ["_build", "schemas/**/*.md"]
nitpicky = True

html_theme = "furo"
html_static_path = ["_static"]
html_css_files = ["sheets.css"]
html_title = f"asflown {__version__}"
html_copy_source = False
html_show_sourcelink = False
html_show_sphinx = False
html_theme_options = {
    # paper only, as the sheets are: read in bright sun, and printed
    "light_css_variables": {
        "color-background-primary": "#FFFEFB",
        "color-background-secondary": "#FAF8F2",
        "color-foreground-primary": "#1F2328",
        "color-foreground-secondary": "#5F5E57",
        "color-background-border": "#CFCBBF",
        "color-brand-primary": "#0A4D8C",
        "color-brand-content": "#0A4D8C",
    },
    "dark_css_variables": {
        "color-brand-primary": "#9CC3E6",
        "color-brand-content": "#9CC3E6",
    },
}
# Long options and file names keep their dashes and quotes as typed.
smartquotes = False

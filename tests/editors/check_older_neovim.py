"""The oldest Neovim that the plugin is for, 0.10, in the same way as the present one (check_neovim.py)."""

import check_neovim
from case import tools

if __name__ == "__main__":
    check_neovim.main(tools.old_neovim(), "0.10")

"""`python -m counterfoil` does the same as the command `counterfoil`."""

from counterfoil.faces.cli import main

if __name__ == "__main__":
    main()

"""The mouth as a drawing (SVG, PNG). Its entry is `drawing.mouth_svg`."""

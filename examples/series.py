"""Prints the fineness of a series of coins, if they are silver-copper. Run: python examples/series.py"""

from __future__ import annotations

from pathlib import Path

import pandas as pd

import alloysolve as al

coins = pd.read_csv(Path(__file__).with_name("series.csv"))
weighed = al.weigh(coins.mass_g, coins.displaced_g, water=coins.water_degC, scale_step="0.001 g", wetting="brushed")
fine = al.mixtures(weighed, metals=["Ag", "Cu"])

columns = ["Ag_low_percent", "Ag_percent", "Ag_high_percent", "reaches"]
print(coins.join(fine[columns].round(1)).to_string(index=False))
print("not silver-copper:", ", ".join(coins.coin[~fine.reaches & coins.mass_g.notna()]))

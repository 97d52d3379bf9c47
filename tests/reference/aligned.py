"""The aligned table as evenrooms computes from it, in float64: what a logger writes as it was written, all else as near as
single precision."""

import numpy as np
import pandas as pd


def wide(single, fahrenheit):
    """float32 -> float64: the number of few decimals that the table holds as this one, in degC, else in degF where asked."""
    near = single.to_numpy(dtype="float64", na_value=np.nan)
    ways = [np.round(near * 1000) / 1000]
    if fahrenheit:
        ways.append((np.round((near * 9 / 5 + 32) * 100) / 100 - 32) * 5 / 9)
    out = near.copy()
    for written in reversed(ways):
        same = written.astype("float32") == near.astype("float32")
        out[same] = written[same]
    return out


def read(path):
    """aligned.parquet or weather.parquet with temperatures and humidities in float64."""
    table = pd.read_parquet(path)
    for column, fahrenheit in (("temperature_degc", True), ("relative_humidity_percent", False)):
        assert table[column].dtype == "float32", f"{column} is {table[column].dtype}"
        table[column] = wide(table[column], fahrenheit)
    return table

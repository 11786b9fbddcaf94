"""The choice as an instance: designs, their laterals and tubes as whole numbers, and the water behind them."""

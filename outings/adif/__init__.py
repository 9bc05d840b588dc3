"""ADIF 3.1.7, the open standard of log exchange: tables, values, and the two file formats, ADI and ADX; pure."""

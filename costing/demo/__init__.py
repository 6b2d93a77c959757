"""The demonstration studio: a year of Wrackline, invented from end to end, told through the pages' own writers.

Makers, shops, towns, people and prices do not exist. The data modules say what is on the shelf and in the diary;
`build` lives the year. Everything follows from the day it is given and a fixed seed, so the same day gives the same
studio.
"""

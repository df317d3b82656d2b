"""A text table with names of its own, angles with colons; a record of each fixed form; and files that are none."""
import gzip

# Stars of the Hipparcos main catalogue (ESA 1997) in the fields of the CDS description of Tycho-2 (I/259), the second one
# without a mean position (flag X), numbers invented where they do not matter.
TYCHO2 = (
    "0001 00008 1| |  2.31750494|  2.23184345|  -16.3|   -9.0| 68| 73| 1.7| 1.8|1958.89|1951.94| 4|1.0|1.0|0.9|1.0|12.146|"
    "0.158|12.146|0.223|999| |         |  2.31754222|  2.23186444|1.67|1.54| 88.0|100.8| |-0.2\n"
    "0001 00013 1|X|            |            |       |       |   |   |    |    |       |       |  |   |   |   |   |10.488|"
    "0.038| 8.670|0.015|999|T|         |  1.12551889|  2.26739556|1.81|1.52|  9.3| 12.7| |-0.2\n")


def make(work, program):
    rows = "".join(f"{i % 24:02d}:{i % 60:02d}:30.5;{'+' if i % 2 else '-'}{i % 80:02d}:10:00;{5 + i % 7}.25\n"
                   for i in range(60))
    (work / "mine.csv").write_text("# own list\nalpha;delta;bright\n" + rows)
    (work / "headless.csv").write_text("10.5,20.5,7.1\n11.5,21.5,8.1\n")
    (work / "torn.csv").write_text("ra,dec,mag\n10,20,5\n10,20\n")
    with gzip.open(work / "tyc2.dat.00.gz", "wt") as file:
        file.write(TYCHO2)
    (work / "picture.bin").write_bytes(bytes(range(256)) * 40)

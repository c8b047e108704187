"""What this node is and how it is wired. Edit, then copy to the board with the other files.

Pin numbers are those of the board's `machine.Pin`. The numbers below fit a board with an RP2040; see README.md.
"""

NODE = "shed-1"

MAINS_HZ = None  # 50 or 60: the mains where the kiln stands. There is no default, the node refuses to start without.

# label, letter of IEC 60584-1, select pin (CS), ready pin (DRDY)
INPUTS = (
    ("t1", "K", 5, 6),
    ("t2", "S", 7, 8),
)

SPI_ID = 0
SCK_PIN = 2
MOSI_PIN = 3  # to SDI of every converter
MISO_PIN = 4  # from SDO of every converter

PORT = "usb"  # or "uart", at 115200 baud
UART_ID = 1
TX_PIN = 20
RX_PIN = 21

BUZZER_PIN = 15  # an active buzzer through a transistor, high sounds; None without one
ARMED_PATH = "armed"  # file that keeps the buzzer armed across resets

SCAN_MS = 1000
WATCHDOG_MS = 8000
RING_SCANS = 600  # 8 + 7 bytes per input for each; 45 minutes are 2700, if the board has the memory
START_DELAY_MS = 2000  # in this time after a start Ctrl-C still works; later the line belongs to the host

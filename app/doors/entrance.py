"""What ``kedgewise serve`` starts: the web app with its gate before it, ending with `serve`."""

import logging
import os
from typing import Final

from starlette.middleware import Middleware
from streamlit import config
from streamlit.starlette import App

from app.doors.gate import Gate
from app.doors.rights import pairing_file
from app.pages import MAIN
from app.tether import TETHERED_VARIABLE, tether

STOP_WAIT_S: Final = 5.0
"""How long the web app may take to let go of its pages before it is ended, s."""

# Where `serve` was killed a door would stay open that nobody at a terminal can close any more.
if os.environ.get(TETHERED_VARIABLE) == "1":
    tether(wait_s=STOP_WAIT_S)

# Anyone on the network can send what is no request: each would be a line in the terminal, until
# the code there is out of sight.
logging.getLogger("uvicorn.error").setLevel(logging.ERROR)

app: Final = App(
    MAIN,
    middleware=[
        Middleware(
            Gate,
            hosts=list(config.get_option("server.allowedHosts")),
            port=int(config.get_option("server.port")),
            pairing=pairing_file(),
        )
    ],
)

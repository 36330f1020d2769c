// Nobody is signed in here: nothing that waits on this device can be read until its person signs in again.
import { forget } from "./unsent.js";

forget().catch(() => {});

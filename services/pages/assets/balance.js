// What a person or a balance writes, as a number; and a balance on a serial line, or one that types like a keyboard.

const FACTORS = { kg: 1000, mg: 0.001 };

/** A number with an optional unit: "312.4", "312.4 g", "+   312.40 g", "ST,GS,+0312.40 g", "0.3124 kg". */
export function reading(text) {
  const found = /(?:^|[\s,:+])([+-]?)\s*(\d+(?:\.\d+)?)\s*(kg|g|mg|°?C)?[\s\r\n]*$/.exec(text);
  if (!found || found[1] === "-" || /[-]\s*\d/.test(text)) return null;
  // A comma between digits can mean two things.
  if (/\d,\d/.test(text)) return null;
  const value = Number(found[2]) * (FACTORS[found[3]] ?? 1);
  return { value, unit: found[3] && found[3].includes("C") ? "C" : "g" };
}

/** Whole lines out of pieces as they arrive; what is not ended waits for the rest. */
export function lines() {
  let rest = "";
  return (piece) => {
    const parts = (rest + piece).split(/[\r\n]+/);
    rest = parts.pop().slice(-200);
    return parts.filter((line) => line.trim());
  };
}

/** Reads a serial balance until it ends; every stable reading is told. */
export async function listen(port, tell) {
  await port.open({ baudRate: 9600 });
  const reader = port.readable.getReader();
  const decoder = new TextDecoder();
  const whole = lines();
  for (;;) {
    const { value, done } = await reader.read();
    if (done) return;
    for (const line of whole(decoder.decode(value, { stream: true }))) {
      // A balance that says so is still settling.
      const now = /^\s*(US|SD|\?)/.test(line) ? null : reading(line);
      if (now) tell(now);
    }
  }
}

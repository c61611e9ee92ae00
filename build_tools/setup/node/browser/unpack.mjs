// Unpacks the headless Chromium of the npm package into this folder, with a starter that finds its libraries.
import { inflate } from "@sparticuz/chromium";
import { writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const packed = join(here, "node_modules", "@sparticuz", "chromium", "bin");
process.env.TMPDIR = here; // the package unpacks into the system's folder for temporary files

for (const name of ["chromium.br", "fonts.tar.br", "swiftshader.tar.br", "al2023.tar.br"]) {
  await inflate(join(packed, name));
}
writeFileSync(
  join(here, "fonts", "fonts.conf"), // the package's own looks for the fonts elsewhere
  `<?xml version="1.0"?>
<fontconfig>
  <dir prefix="relative">.</dir>
  <dir>/usr/share/fonts</dir>
  <cachedir prefix="relative">cache</cachedir>
</fontconfig>
`,
);
writeFileSync(
  join(here, "chromium.sh"),
  `#!/bin/sh
here=$(dirname "$0")
export LD_LIBRARY_PATH="$here/al2023/lib:$here\${LD_LIBRARY_PATH:+:$LD_LIBRARY_PATH}"
export FONTCONFIG_PATH="$here/fonts"
exec "$here/chromium" "$@"
`,
  { mode: 0o755 },
);

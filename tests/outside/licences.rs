//! What the program is built from may be given on: every library it needs has a licence that allows it
//! without conditions on the program's own.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

/// Permissive licences, by their names in the SPDX list. Each asks for no more than that its text is given along.
const ALLOWED: [&str; 9] = [
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "MIT",
    "MIT-0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// Libraries with another licence, each looked at: the Mozilla licence binds the library's own files,
/// which are used unchanged.
const LOOKED_AT: [(&str, &str); 1] = [("option-ext", "MPL-2.0")];

/// Whether one of the ways an expression offers has only allowed licences. Parts joined by `OR` (or by
/// `/`, as older packages write it) are ways; within one, all parts joined by `AND` hold.
fn is_allowed(expression: &str) -> bool {
    let expression = expression.replace(" WITH LLVM-exception", "");
    // `(A OR B) AND C` is the one form with brackets among the packages: both sides must hold.
    expression.split(" AND ").all(|side| {
        let side = side.trim_matches(['(', ')', ' ']);
        let ways = side.split(" OR ").flat_map(|way| way.split('/'));
        ways.map(str::trim).any(|way| ALLOWED.contains(&way))
    })
}

#[test]
fn an_expression_is_allowed_by_one_of_its_ways() {
    for good in [
        "MIT OR Apache-2.0",
        "MIT/GPL-3.0",
        "(MIT OR Apache-2.0) AND Unicode-3.0",
        "Apache-2.0 WITH LLVM-exception",
    ] {
        assert!(is_allowed(good), "{good}");
    }
    for bad in [
        "GPL-3.0",
        "MIT AND GPL-3.0",
        "",
        "(MIT OR Apache-2.0) AND MPL-2.0",
    ] {
        assert!(!is_allowed(bad), "{bad}");
    }
}

/// `HOMEHOOK_RENEW=1 cargo test --test outside licences` writes `assets/licences.txt` anew.
#[test]
fn every_library_may_be_given_on_and_is_listed() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let output = Command::new(env!("CARGO"))
        .args(["tree", "--offline", "--edges", "normal", "--target", "all"])
        .args(["--prefix", "none", "--format", "{p}|{l}"])
        .current_dir(root)
        .output()
        .unwrap();
    // Libraries for systems that are not this one may never have been fetched: then only the built
    // program can be asked.
    let output = match output.status.success() {
        true => output,
        false => Command::new(env!("CARGO"))
            .args(["tree", "--offline", "--edges", "normal"])
            .args(["--prefix", "none", "--format", "{p}|{l}"])
            .current_dir(root)
            .output()
            .unwrap(),
    };
    assert!(output.status.success(), "{output:?}");
    let text = String::from_utf8(output.stdout).unwrap();
    let mut licences: BTreeMap<String, String> = BTreeMap::new();
    for line in text.lines() {
        let mut parts = line.split('|');
        let (package, licence) = (parts.next().unwrap(), parts.next().unwrap());
        let name = package.split_whitespace().next().unwrap();
        if name != "homehook" {
            licences.insert(name.to_owned(), licence.trim_end_matches(" (*)").to_owned());
        }
    }
    assert!(licences.len() > 50, "{}", licences.len());
    for (name, licence) in &licences {
        let looked_at = LOOKED_AT.contains(&(name, licence));
        assert!(looked_at || is_allowed(licence), "{name}: {licence}");
    }
    let path = root.join("assets/licences.txt");
    if std::env::var_os("HOMEHOOK_RENEW").is_some() {
        let list = licences
            .iter()
            .map(|(name, licence)| format!("{name}: {licence}\n"));
        std::fs::write(&path, list.collect::<String>()).unwrap();
    }
    let listed = std::fs::read_to_string(&path).unwrap();
    let unlisted: Vec<_> = licences
        .keys()
        .filter(|name| {
            !listed
                .lines()
                .any(|line| line.split(':').next() == Some(name))
        })
        .collect();
    assert!(
        unlisted.is_empty(),
        "{unlisted:?} not in assets/licences.txt; run HOMEHOOK_RENEW=1 cargo test --test outside licences"
    );
}

//! What each file of a crate uses, as its syntax says it: imports, paths in code, in macros and in attributes.
//!
//! A re-export hands a name on and uses nothing; whoever names it there uses the file in which it is defined. Calls of
//! methods name no file, so that what a method needs is seen where its type is named. Code that only tests compile is
//! left out.

use proc_macro2::{Spacing, TokenStream, TokenTree};
use std::collections::{BTreeMap, BTreeSet};
use syn::visit::{self, Visit};

/// A crate, read.
pub(crate) struct Crate {
    modules: BTreeMap<Vec<String>, Module>,
}

/// One module: a file, or a module inside a file.
#[derive(Default)]
struct Module {
    file: String,
    items: BTreeSet<String>,
    uses: Vec<Use>,
    named: BTreeSet<Name>,
}

/// A name that an import brings in.
struct Use {
    /// What it is called here; `*` for everything that is there.
    called: String,
    name: Name,
    hands_on: bool,
}

/// A path as it is written.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Name {
    segments: Vec<String>,
    /// It begins with `::`, so that it names a crate.
    of_a_crate: bool,
}

/// What a path means.
enum Meaning {
    /// Something of this crate.
    Own(Vec<String>),
    /// Something of another crate.
    Foreign(Vec<String>),
    /// A local name, a type parameter, something of the prelude.
    Local,
}

/// One file uses something of another.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(crate) struct Arrow {
    /// Who uses it.
    pub(crate) from: String,
    /// The modules of the crate's root by which it is named and in which it is defined.
    pub(crate) rooms: BTreeSet<String>,
    /// Where it is defined.
    pub(crate) to: String,
    /// As it is called from the root.
    pub(crate) name: String,
}

/// More steps than this from one re-export to the next are a circle of names, which does not compile.
const STEPS_MAX: usize = 32;

/// Lower-case words that begin a path and name no crate.
const PRIMITIVES: [&str; 19] = [
    "bool", "char", "str", "u8", "u16", "u32", "u64", "u128", "usize", "i8", "i16", "i32", "i64", "i128",
    "isize", "f32", "f64", "self", "super",
];

impl Crate {
    /// Reads the files of a crate, each with its path from the folder of the library's root.
    pub(crate) fn read<'a>(files: impl IntoIterator<Item = (&'a str, &'a str)>) -> Self {
        let mut modules = BTreeMap::new();
        for (path, text) in files {
            let parsed = syn::parse_file(text).unwrap_or_else(|error| panic!("{path}: {error}"));
            let stem = path.strip_suffix(".rs").unwrap_or(path);
            let stem = stem.strip_suffix("/mod").unwrap_or(stem);
            let inside = match stem {
                "lib" => Vec::new(),
                stem => stem.split('/').map(str::to_owned).collect(),
            };
            let mut reader = Reader {
                file: path,
                at: inside,
                modules: &mut modules,
            };
            reader.here();
            reader.visit_file(&parsed);
        }
        Self { modules }
    }

    /// Each arrow between two files.
    pub(crate) fn arrows(&self) -> BTreeSet<Arrow> {
        let mut arrows = BTreeSet::new();
        for (at, module) in &self.modules {
            let imported = module
                .uses
                .iter()
                .filter(|used| !used.hands_on || self.leaves(at, used));
            let names = imported.map(|used| &used.name).chain(&module.named);
            for name in names {
                let Meaning::Own(path) = self.meaning(at, name, true, 0) else {
                    continue;
                };
                let defined = self.defined(&path);
                let to = self.modules.get(&defined).map_or("", |module| &module.file);
                if to != module.file && !to.is_empty() {
                    arrows.insert(Arrow {
                        from: module.file.clone(),
                        rooms: path.first().into_iter().chain(defined.first()).cloned().collect(),
                        to: to.to_owned(),
                        name: path.join("::"),
                    });
                }
            }
        }
        arrows
    }

    /// Whether what is handed on comes from outside of the module of the root that hands it on.
    fn leaves(&self, at: &[String], used: &Use) -> bool {
        match self.meaning(at, &used.name, true, 0) {
            Meaning::Own(path) => path.first() != at.first(),
            _ => false,
        }
    }

    /// Everything of other crates that each file names: the file, and the path.
    pub(crate) fn foreign(&self) -> BTreeSet<(String, String)> {
        let mut foreign = BTreeSet::new();
        for (at, module) in &self.modules {
            let imported = module.uses.iter().map(|used| (&used.name, true));
            for (name, import) in imported.chain(module.named.iter().map(|name| (name, false))) {
                if let Meaning::Foreign(path) = self.meaning(at, name, import, 0) {
                    foreign.insert((module.file.clone(), path.join("::")));
                }
            }
        }
        foreign
    }

    /// What a name means in a module. An import of one word names a crate, a word in code does not.
    fn meaning(&self, at: &[String], name: &Name, import: bool, steps: usize) -> Meaning {
        let segments = &name.segments;
        let Some(first) = segments.first().filter(|_| steps < STEPS_MAX) else {
            return Meaning::Local;
        };
        if name.of_a_crate {
            return Meaning::Foreign(segments.clone());
        }
        let rest = segments.get(1..).unwrap_or_default();
        match first.as_str() {
            "crate" | "quietcuff" => return Meaning::Own(rest.to_vec()),
            "Self" => return Meaning::Local,
            "self" if rest.is_empty() && !import => return Meaning::Local,
            "self" => return Meaning::Own([at, rest].concat()),
            "super" => {
                let above = at.get(..at.len().saturating_sub(1)).unwrap_or_default();
                let ups = rest.iter().take_while(|word| *word == "super").count();
                let above = above.get(..above.len().saturating_sub(ups)).unwrap_or_default();
                return Meaning::Own([above, rest.get(ups..).unwrap_or_default()].concat());
            }
            _ => {}
        }
        let called = first.strip_suffix('!').unwrap_or(first);
        let child = [at, &[called.to_owned()]].concat();
        let module = self.modules.get(at);
        if self.modules.contains_key(&child) || module.is_some_and(|module| module.items.contains(called)) {
            return Meaning::Own([at, segments.as_slice()].concat());
        }
        let used = module.and_then(|module| module.uses.iter().find(|used| used.called == called));
        if let Some(used) = used.filter(|used| used.name != Name::of(&[first])) {
            return match self.meaning(at, &used.name, true, steps + 1) {
                Meaning::Own(path) => Meaning::Own([path.as_slice(), rest].concat()),
                Meaning::Foreign(path) => Meaning::Foreign([path.as_slice(), rest].concat()),
                Meaning::Local => Meaning::Local,
            };
        }
        let lower = first.starts_with(|c: char| c.is_ascii_lowercase());
        let says_more = import || !rest.is_empty() || called != first;
        if lower && !PRIMITIVES.contains(&first.as_str()) && says_more {
            return Meaning::Foreign(segments.clone());
        }
        // A local name, or one of the prelude.
        Meaning::Local
    }

    /// The module in which something of this crate is defined, through whatever hands it on.
    fn defined(&self, path: &[String]) -> Vec<String> {
        let mut path = path.to_vec();
        for _ in 0..STEPS_MAX {
            let depth = (0..=path.len())
                .rev()
                .find(|depth| self.modules.contains_key(path.get(..*depth).unwrap_or_default()))
                .unwrap_or(0);
            let (at, rest) = path.split_at(depth);
            let (Some(first), Some(module)) = (rest.first(), self.modules.get(at)) else {
                return at.to_vec();
            };
            if module.items.contains(first) {
                return at.to_vec();
            }
            let called = module.uses.iter().find(|used| used.called == *first);
            let all = || {
                module
                    .uses
                    .iter()
                    .filter(|used| used.called == "*")
                    .find_map(|used| {
                        let Meaning::Own(there) = self.meaning(at, &used.name, true, 0) else {
                            return None;
                        };
                        let has = self
                            .modules
                            .get(&there)
                            .is_some_and(|module| module.items.contains(first));
                        has.then(|| [there.as_slice(), rest].concat())
                    })
            };
            let next = match called.map(|used| self.meaning(at, &used.name, true, 0)) {
                Some(Meaning::Own(there)) => {
                    Some([there.as_slice(), rest.get(1..).unwrap_or_default()].concat())
                }
                Some(_) => None,
                None => all(),
            };
            match next {
                Some(next) if next != path => path = next,
                _ => return at.to_vec(),
            }
        }
        path
    }
}

impl Name {
    fn of(segments: &[&str]) -> Self {
        Self {
            segments: segments.iter().map(|&word| word.to_owned()).collect(),
            of_a_crate: false,
        }
    }
}

/// Files that use each other in a circle, each circle in order.
pub(crate) fn circles(arrows: &BTreeSet<Arrow>) -> Vec<BTreeSet<String>> {
    let mut next: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for arrow in arrows {
        next.entry(&arrow.from).or_default().insert(&arrow.to);
    }
    let reached = |from: &str| {
        let mut seen = BTreeSet::new();
        let mut open: Vec<&str> = next.get(from).into_iter().flatten().copied().collect();
        while let Some(file) = open.pop() {
            if seen.insert(file.to_owned()) {
                open.extend(next.get(file).into_iter().flatten());
            }
        }
        seen
    };
    let all: BTreeMap<&str, BTreeSet<String>> = next.keys().map(|file| (*file, reached(file))).collect();
    let mut circles: Vec<BTreeSet<String>> = all
        .iter()
        .filter(|(file, reached)| reached.contains(**file))
        .map(|(file, reached)| {
            let back = |other: &&String| all.get(other.as_str()).is_some_and(|there| there.contains(*file));
            reached.iter().filter(back).cloned().collect()
        })
        .collect();
    circles.sort();
    circles.dedup();
    circles
}

/// Reads one file.
struct Reader<'a> {
    file: &'a str,
    at: Vec<String>,
    modules: &'a mut BTreeMap<Vec<String>, Module>,
}

impl Reader<'_> {
    fn here(&mut self) -> &mut Module {
        let module = self.modules.entry(self.at.clone()).or_default();
        if module.file.is_empty() {
            self.file.clone_into(&mut module.file);
        }
        module
    }

    fn names(&mut self, segments: Vec<String>, of_a_crate: bool) {
        self.here().named.insert(Name { segments, of_a_crate });
    }

    fn imports(&mut self, tree: &syn::UseTree, before: &[String], of_a_crate: bool, hands_on: bool) {
        let mut add = |called: String, segments: Vec<String>| {
            let name = Name { segments, of_a_crate };
            self.here().uses.push(Use {
                called,
                name,
                hands_on,
            });
        };
        let with = |word: &syn::Ident| {
            let mut path = before.to_vec();
            // `{self}` is what stands before the braces.
            if word != "self" || before.is_empty() {
                path.push(word.to_string());
            }
            path
        };
        match tree {
            syn::UseTree::Path(path) => {
                let before = with(&path.ident);
                self.imports(&path.tree, &before, of_a_crate, hands_on);
            }
            syn::UseTree::Name(name) => {
                let path = with(&name.ident);
                add(path.last().cloned().unwrap_or_default(), path);
            }
            syn::UseTree::Rename(renamed) => add(renamed.rename.to_string(), with(&renamed.ident)),
            syn::UseTree::Glob(_) => add("*".to_owned(), before.to_vec()),
            syn::UseTree::Group(group) => {
                for tree in &group.items {
                    self.imports(tree, before, of_a_crate, hands_on);
                }
            }
        }
    }

    /// Every path in tokens whose grammar nobody knows but their macro: words with `::` between them, and what braces
    /// after a `::` hold, each behind what stands before the braces.
    fn tokens(&mut self, tokens: TokenStream, before: &[String]) {
        let mut path = before.to_vec();
        let (mut of_a_crate, mut word, mut colon, mut colons) = (false, false, false, !before.is_empty());
        for token in tokens {
            let half = matches!(&token, TokenTree::Punct(punct) if punct.as_char() == ':'
                && punct.spacing() == Spacing::Joint);
            match token {
                TokenTree::Punct(punct) if punct.as_char() == ':' && colon => {
                    if !word {
                        self.flush(&mut path, before, of_a_crate);
                        of_a_crate = true;
                    }
                    colons = true;
                }
                TokenTree::Punct(punct) if punct.as_char() == ':' => {}
                TokenTree::Punct(punct) => {
                    self.flush(&mut path, before, of_a_crate);
                    (of_a_crate, word, colons) = (false, false, false);
                    if punct.as_char() == ',' {
                        path = before.to_vec();
                        colons = !before.is_empty();
                    }
                }
                TokenTree::Ident(next) => {
                    if !colons {
                        self.flush(&mut path, before, of_a_crate);
                        of_a_crate = false;
                    }
                    // `{self}` is what stands before the braces.
                    if next != "self" || path.is_empty() {
                        path.push(next.to_string());
                    }
                    (word, colons) = (true, false);
                }
                TokenTree::Group(group) => {
                    let inside = if colons { path.clone() } else { Vec::new() };
                    self.tokens(group.stream(), &inside);
                    self.flush(&mut path, before, of_a_crate);
                    (of_a_crate, word, colons) = (false, false, false);
                }
                TokenTree::Literal(literal) => {
                    self.in_words(&literal.to_string());
                    self.flush(&mut path, before, of_a_crate);
                    (of_a_crate, word, colons) = (false, false, false);
                }
            }
            colon = half;
        }
        self.flush(&mut path, before, of_a_crate);
    }

    fn flush(&mut self, path: &mut Vec<String>, before: &[String], of_a_crate: bool) {
        let path = std::mem::take(path);
        if path.len() > before.len() {
            self.names(path, of_a_crate);
        }
    }

    /// A path in a string, as attributes have it.
    fn in_words(&mut self, literal: &str) {
        let words = literal.trim_matches(['"', 'r', '#']);
        let word = |word: &str| !word.is_empty() && word.chars().all(|c| c.is_alphanumeric() || c == '_');
        if words.contains("::") && words.split("::").all(word) {
            self.names(words.split("::").map(str::to_owned).collect(), false);
        }
    }
}

/// Compiled for tests alone.
fn of_tests(attributes: &[syn::Attribute]) -> bool {
    attributes.iter().any(|attribute| {
        attribute.path().is_ident("cfg")
            && attribute
                .parse_args::<syn::Path>()
                .is_ok_and(|path| path.is_ident("test"))
    })
}

fn attributes(item: &syn::Item) -> &[syn::Attribute] {
    match item {
        syn::Item::Const(item) => &item.attrs,
        syn::Item::Enum(item) => &item.attrs,
        syn::Item::Fn(item) => &item.attrs,
        syn::Item::Impl(item) => &item.attrs,
        syn::Item::Macro(item) => &item.attrs,
        syn::Item::Mod(item) => &item.attrs,
        syn::Item::Static(item) => &item.attrs,
        syn::Item::Struct(item) => &item.attrs,
        syn::Item::Trait(item) => &item.attrs,
        syn::Item::Type(item) => &item.attrs,
        syn::Item::Use(item) => &item.attrs,
        _ => &[],
    }
}

fn defines(item: &syn::Item) -> Option<&syn::Ident> {
    match item {
        syn::Item::Const(item) => Some(&item.ident),
        syn::Item::Enum(item) => Some(&item.ident),
        syn::Item::Fn(item) => Some(&item.sig.ident),
        syn::Item::Macro(item) => item.ident.as_ref(),
        syn::Item::Mod(item) => Some(&item.ident),
        syn::Item::Static(item) => Some(&item.ident),
        syn::Item::Struct(item) => Some(&item.ident),
        syn::Item::Trait(item) => Some(&item.ident),
        syn::Item::Type(item) => Some(&item.ident),
        _ => None,
    }
}

impl<'ast> Visit<'ast> for Reader<'_> {
    fn visit_item(&mut self, item: &'ast syn::Item) {
        if of_tests(attributes(item)) {
            return;
        }
        // Another name for a type is an import by another spelling.
        if let syn::Item::Type(alias) = item
            && let syn::Type::Path(path) = &*alias.ty
            && path.qself.is_none()
            && alias.generics.params.is_empty()
        {
            let name = name(&path.path);
            let called = alias.ident.to_string();
            self.here().uses.push(Use {
                called,
                name,
                hands_on: false,
            });
        } else if let Some(defined) = defines(item) {
            let defined = defined.to_string();
            self.here().items.insert(defined);
        }
        visit::visit_item(self, item);
    }

    fn visit_item_mod(&mut self, item: &'ast syn::ItemMod) {
        if item.content.is_some() {
            self.at.push(item.ident.to_string());
            self.here();
            visit::visit_item_mod(self, item);
            self.at.pop();
        }
    }

    fn visit_item_use(&mut self, item: &'ast syn::ItemUse) {
        let hands_on = !matches!(item.vis, syn::Visibility::Inherited);
        self.imports(&item.tree, &[], item.leading_colon.is_some(), hands_on);
    }

    fn visit_item_extern_crate(&mut self, item: &'ast syn::ItemExternCrate) {
        let called = item
            .rename
            .as_ref()
            .map_or(&item.ident, |(_, renamed)| renamed)
            .to_string();
        let name = if item.ident == "self" {
            Name::of(&["crate"])
        } else {
            Name {
                segments: vec![item.ident.to_string()],
                of_a_crate: true,
            }
        };
        self.here().uses.push(Use {
            called,
            name,
            hands_on: false,
        });
    }

    fn visit_vis_restricted(&mut self, _: &'ast syn::VisRestricted) {}

    fn visit_path(&mut self, path: &'ast syn::Path) {
        let name = name(path);
        self.names(name.segments, name.of_a_crate);
        visit::visit_path(self, path);
    }

    fn visit_expr_path(&mut self, path: &'ast syn::ExprPath) {
        // `<Type>::function`
        if let Some(syn::QSelf { ty, position: 0, .. }) = &path.qself
            && let syn::Type::Path(of) = &**ty
        {
            let mut whole = name(&of.path);
            whole.segments.extend(name(&path.path).segments);
            self.names(whole.segments, whole.of_a_crate);
        }
        visit::visit_expr_path(self, path);
    }

    fn visit_macro(&mut self, call: &'ast syn::Macro) {
        let mut called = name(&call.path);
        if let Some(last) = called.segments.last_mut() {
            last.push('!');
        }
        self.names(called.segments, called.of_a_crate);
        self.tokens(call.tokens.clone(), &[]);
        visit::visit_macro(self, call);
    }

    fn visit_attribute(&mut self, attribute: &'ast syn::Attribute) {
        let of_lints = ["allow", "expect", "warn", "deny", "forbid"];
        if let syn::Meta::List(list) = &attribute.meta
            && !of_lints.iter().any(|lint| list.path.is_ident(lint))
        {
            self.tokens(list.tokens.clone(), &[]);
        }
    }
}

fn name(path: &syn::Path) -> Name {
    Name {
        segments: path
            .segments
            .iter()
            .map(|segment| segment.ident.to_string())
            .collect(),
        of_a_crate: path.leading_colon.is_some(),
    }
}
